"""The command line: the only place that prints."""

import os

# Threads that multiply small matrices wait for each other at full speed: a tenth of all work, for nothing.
# It is read when numpy is loaded, here and in the processes that a command begins.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
