"""Can hands, tools and torches come at everything, and can the finished part go in?"""
