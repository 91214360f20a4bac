#include "verify/picture.h"
