"""The screens of a place: its policy, its stock, its people."""
