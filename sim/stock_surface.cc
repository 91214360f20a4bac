#include "sim/stock_surface.h"
