#include "sim/mesh_index.h"
