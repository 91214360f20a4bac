#include "kinematics/inverse_kinematics.h"
