"""Every page that people look at, kept as small pictures, so that a change of looks is seen."""
