#include "kinematics/arm_model.h"
