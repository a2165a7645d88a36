UPDATE own_fingerings SET demand = '{"Skills":["small barre"],"Load":2,"Bars":8,"LastBar":"8","Strain":true}' WHERE id = 'o0000000000000000000000024';
