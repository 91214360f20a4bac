#include "sim/piece_location.h"
