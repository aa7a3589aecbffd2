"""Pages for people, and the same facts for programs. No maths."""
