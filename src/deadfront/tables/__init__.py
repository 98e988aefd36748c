"""Tables: what the standards fix. CSV data, one file per published table, its source inside; loaders."""
