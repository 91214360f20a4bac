#include "sim/mesh_import.h"
