"""What people decide about the reps of an audit, and what then stands."""
