#include "sim/depth_rays.h"
