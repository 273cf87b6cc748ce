"""From landmarks to a judged timeline: signals, reps, checks, sets, score, plan."""
