"""From accepted specimens to portions on their shelves: clocks, centrifuge runs, aliquots."""
