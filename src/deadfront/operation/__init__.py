"""Operation: what people can do to the station. Positions, keys and guards in, proofs and sequences out."""
