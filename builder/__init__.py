"""Soakbook publishes a static, comparable archive of graphics-card cooler tests."""

import os

__version__ = "0.1.0"

# Before numpy is loaded: its matrices here are small, so threads cost more than they give (four times the processor
# time on two cores), and one thread gives the same bytes on machines with any number of cores.
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
