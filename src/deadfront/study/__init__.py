"""Study: what happens on the station. Operating cases go in; faults, clearing times and energies come out."""
