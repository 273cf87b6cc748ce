"""Every string that a user can see, and the one word that each thing has."""
