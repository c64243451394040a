"""annulus: heat conduction in a flue wrapped with copper tube."""

__version__ = "0.1.0"
