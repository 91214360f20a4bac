#include "sim/dry_run.h"
