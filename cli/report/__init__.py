"""The report: one audit as one self-contained page to read, share and print."""
