"""Project: what the engineer wrote. File format, units at the boundary, located errors, templates."""
