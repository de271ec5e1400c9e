"""Crop: turns a description into coefficients, cover, roots and stages by day of age."""

from waterbudget.crop.crop import Crop
from waterbudget.crop.development import Development, develop
from waterbudget.crop.rotation import Rotation
from waterbudget.crop.thermal import accumulate

__all__ = ["Crop", "Development", "Rotation", "accumulate", "develop"]
