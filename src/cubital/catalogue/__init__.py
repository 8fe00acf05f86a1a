"""What each test needs, with its source: tables, and what reads them."""

from cubital.catalogue.catalogue import Catalogue
from cubital.catalogue.load import check_catalogue, load_catalogue, shipped

__all__ = ["Catalogue", "check_catalogue", "load_catalogue", "shipped"]
