"""The athlete as a body of constant limb lengths in front of a pinhole camera."""
