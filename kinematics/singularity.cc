#include "kinematics/singularity.h"
