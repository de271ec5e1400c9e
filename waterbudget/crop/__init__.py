"""Crop: turns a description into coefficients, cover, roots and stages by day of age."""

from waterbudget.crop.crop import Crop
from waterbudget.crop.development import Development, develop

__all__ = ["Crop", "Development", "develop"]
