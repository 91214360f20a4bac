#include "kinematics/forward_kinematics.h"
