"""What only developers run: calibration, and measuring the tool against labelled films."""

import os

# As in the command: threads inside the algebra of small matrices take many times what they save.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
