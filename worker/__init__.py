"""The worker: from part and plan to the report, on an open-source B-rep kernel.

Linear algebra stays on the job's one core, so numpy must not be loaded before this: its sums then do not depend on how
many cores a machine has, and a process without a second thread allocates without locks.
"""

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"
