"""The audit of one film: what is asked, the run through its stages, and what is kept of them."""
