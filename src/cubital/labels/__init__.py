"""Blood on paper: labels in millimetres, with symbols that a reader decodes."""

from __future__ import annotations

from cubital.labels.from_plan import identifiers, labels_for
from cubital.labels.sheet import print_labels
from cubital.labels.values import Label

__all__ = ["Label", "identifiers", "labels_for", "print_labels"]
