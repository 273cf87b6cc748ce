"""From measured splits to a model of the athlete, a forecast, and a plan for the next attempt."""
