"""From a film to the landmarks of its athlete: decoding, pose, identity, camera."""
