#include "kinematics/time_scaling.h"
