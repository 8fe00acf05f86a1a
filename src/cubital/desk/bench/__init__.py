"""The screens of the bench: clocks, centrifuge runs, portions, stores, one more test."""
