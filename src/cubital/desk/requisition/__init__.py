"""The screens of requisitions and patients."""
