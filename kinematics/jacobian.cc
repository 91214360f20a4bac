#include "kinematics/jacobian.h"
