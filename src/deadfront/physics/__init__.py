"""Physics: what nature and the standards say. Pure functions on floats, arrays or intervals, SI, no knowledge of a project."""
