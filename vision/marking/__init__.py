"""Drawing on a film: skeleton, captions and hidden faces, encoded so that browsers play it."""
