"""The screens of the chair."""
