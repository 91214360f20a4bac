#include "sim/cutter.h"
