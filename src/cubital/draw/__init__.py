"""From a requisition to a draw plan."""
