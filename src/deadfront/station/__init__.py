"""Station: what is connected to what. A Project becomes points and devices, one topology for all who need it."""
