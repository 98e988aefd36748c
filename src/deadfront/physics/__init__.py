"""Physics: what nature and the standards say. Pure functions, SI, on floats, arrays or intervals; no project known."""
