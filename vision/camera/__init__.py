"""How the camera moved while it filmed."""
