"""How two cameras stand to each other."""
