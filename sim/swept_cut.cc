#include "sim/swept_cut.h"
