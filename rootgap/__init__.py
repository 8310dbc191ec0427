"""rootgap designs welded exhaust log manifolds so that every joint closes to its root gap.

>>> import rootgap
>>> rootgap.PrintSetup().paper
'a4'
"""

from rootgap.manifold import Built, Manifold, load
from rootgap.patterns.printing import PrintSetup

__all__ = ["Built", "Manifold", "PrintSetup", "load"]
__version__ = "0.1.0"
