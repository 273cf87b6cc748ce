"""Whether a film is one unbroken take: cuts, gaps, doubled stretches, changes of speed."""
