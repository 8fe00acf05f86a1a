"""An invented clinic in the invented Ostrel valley, to try the desk with; nobody in it is real."""
