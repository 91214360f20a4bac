#include "sim/mesh.h"
