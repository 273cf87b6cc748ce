"""Things that decide a repetition beside the body: the ball, the box, the rope's sound."""
