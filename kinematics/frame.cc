#include "kinematics/frame.h"
