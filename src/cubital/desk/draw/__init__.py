"""The screens of the draw plan."""
