"""Before anything loads numpy: our matrices are small, and threads for linear algebra cost more than they give."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
