"""Pictures of a unit as values: what is shown, where, and in words for who cannot see it. Nothing is drawn here."""
