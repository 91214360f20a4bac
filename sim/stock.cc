#include "sim/stock.h"
