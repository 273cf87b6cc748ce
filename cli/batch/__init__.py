"""``repwitness batch``: many films with one request, on this machine or on a cluster."""
