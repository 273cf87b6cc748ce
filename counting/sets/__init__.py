"""Sets, the breaks between them and the pauses inside them."""
