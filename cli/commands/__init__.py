"""The commands of ``repwitness``, a module each: their options, and what they print."""
