"""Claims: what must be true. Results go in; verdicts with value, limit, worst case and evidence come out."""
