#include "sim/collision_world.h"
