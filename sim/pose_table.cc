#include "sim/pose_table.h"
