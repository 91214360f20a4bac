#include "kinematics/motion_planner.h"
