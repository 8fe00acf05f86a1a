"""The screens of the reception: a tray by scanner, one specimen, other materials, who to phone."""
