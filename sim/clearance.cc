#include "sim/clearance.h"
